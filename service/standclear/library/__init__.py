"""Shots, exposures and originals on disk; the only place that writes them."""
