"""What worker processes have loaded before they begin; nothing else imports this."""

import PIL.Image
import PIL.ImageOps

import breakangle.documents.renderers.page_pdf
import breakangle.services.listening.takes

__all__ = ["PIL", "breakangle"]
