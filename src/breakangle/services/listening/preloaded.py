"""What worker processes have loaded before they begin; nothing else imports this."""

import PIL.Image
import PIL.ImageOps

import breakangle.desk.listen
import breakangle.report.page_pdf

__all__ = ["PIL", "breakangle"]
