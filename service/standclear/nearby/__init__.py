"""Being found on the network: by a name, and at the address that a phone can reach."""
