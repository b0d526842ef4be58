"""The tests, importable so that their helpers are (``from tests.pictures import ...``)."""
