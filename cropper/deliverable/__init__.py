"""The file we made: rendered in linear light, sharpened for its medium, encoded, written whole."""
