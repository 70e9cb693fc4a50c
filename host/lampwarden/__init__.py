"""Lampwarden: runs a home-built light-treatment chamber for aged printed paper."""

__version__ = "0.1.0"
