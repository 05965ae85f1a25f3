"""Where a picture must go: shape, pixels, covered zones, framing, finish. Presets are data."""
