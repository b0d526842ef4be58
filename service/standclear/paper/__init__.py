"""Printed sheets: the exposure sheet, the strips."""
