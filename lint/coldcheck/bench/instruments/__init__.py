"""Meters and scopes: what they load with, show and stand."""
