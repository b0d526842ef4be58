"""The second copy: kept exposures and their journals, mirrored to another disk or machine."""
