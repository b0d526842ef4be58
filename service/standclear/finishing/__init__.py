"""Exposures to film: even light, steady picture, sound, encoding, interchange."""
