"""The Flask application: pairing, REST resources, live view, events."""
