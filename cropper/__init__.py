"""Crops for finished portraits: find the eyes, propose a crop per destination, export, remember.

Data flows one way through rooms named after the trade::

    master -> subject -> destination -> proposal -> deliverable -> publication

Coordinates are stated once, in :mod:`cropper.geometry`.
"""

__version__ = "0.1.0"
