"""What the live forms of listening say on the screen and aloud."""

from starlette.requests import HTTPConnection

from breakangle.drawings.charts.dots import dots_chart
from breakangle.services.listening.watched_form import FormTold, FormWatch
from breakangle.web.pages.listening.listen_words import SMALL, Said
from breakangle.web.render import rendered
from breakangle.web.texts import words


def form_asks(form: FormWatch) -> Said:
    """Return what is to be played next."""
    asked = words("listen.all_heard") if form.done else f"{form.asked}."
    return {"event": "asks", "words": asked, "count": "", "say": asked, "done": form.done}


def form_told(connection: HTTPConnection, told: FormTold) -> Said:
    """Return what was heard, with its drawing."""
    answer = told.answer
    shown = answer is not None and answer.axes is not None and bool(answer.series)
    drawing = dots_chart(answer.series, answer.axes, SMALL) if shown and answer and answer.axes else None
    html = rendered(connection, "_form_heard.html", told=told, drawing=drawing)
    outcome = "stored" if told.stored_count else "heard" if told.good else "again"
    first = told.words[0]
    return {
        "event": "take", "outcome": outcome, "words": f"{first[:1].upper()}{first[1:]}.", "html": html,
        "can_keep": False,
    }  # fmt: skip
