"""Arrays in, numbers or arrays out: light, registration, sharpness, difference. No I/O."""
