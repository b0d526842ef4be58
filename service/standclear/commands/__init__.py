"""The commands of the command line that need more than a line or two: one file each."""
