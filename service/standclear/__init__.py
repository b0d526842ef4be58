"""Standclear: the picture is taken without anyone touching the camera."""

__version__ = "0.1.0"
