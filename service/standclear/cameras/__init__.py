"""One small Camera interface and its drivers."""
