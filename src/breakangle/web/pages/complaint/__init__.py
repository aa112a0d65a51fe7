"""Complaint: what the owner hears, what decides it, what they are told."""
