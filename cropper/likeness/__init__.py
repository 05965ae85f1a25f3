"""Likeness of pictures: what a found file shows of a known one. Persons are never recognised."""
