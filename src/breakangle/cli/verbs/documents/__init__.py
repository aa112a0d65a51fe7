"""Verbs that make paper."""
