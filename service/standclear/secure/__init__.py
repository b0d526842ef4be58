"""HTTPS on the local network: an authority of this computer's own, and certificates made by it."""
