"""Joins a source of arrivals, the core and a journal, and never asks which source it has."""
