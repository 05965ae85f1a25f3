"""Where a picture must go: shape, pixels, frame, covered zones, framing, finish. Presets are data."""
