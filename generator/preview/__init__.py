"""The desk page: the fleet, its guides and the form of a unit, live in a browser."""
