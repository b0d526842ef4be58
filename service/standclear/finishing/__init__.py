"""From exposures to a film: time, light, position, sound and the files that play it."""
