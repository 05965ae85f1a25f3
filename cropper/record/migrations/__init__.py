"""The steps that bring an older record to the shape this program knows."""
