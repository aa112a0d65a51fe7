"""The shop behind an app that a test holds in its hand."""

from fastapi import FastAPI
from starlette.testclient import TestClient

from breakangle.web.workshops import Workshop


def workshop_of(client: TestClient) -> Workshop:
    """Return the shop that the app serves."""
    app = client.app
    assert isinstance(app, FastAPI)
    found: Workshop = app.state.workshop
    return found
