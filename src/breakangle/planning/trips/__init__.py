"""Trips: the steps of a plan gathered into what a person does in one go, with tools, minutes and what to read after."""
