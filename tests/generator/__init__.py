"""A second generator of sets, apart from the rehearsal set: truth that the tests know exactly."""
