"""Devices of the network."""
