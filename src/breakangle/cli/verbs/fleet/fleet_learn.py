"""`breakangle fleet-learn`: what a neck of a make answers, from many of them."""

from typing import Any


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "fleet-learn",
        help="what a neck of a make answers, from a run of `fleet learn`",
        description="How much necks of a make, and makes, differ is worked out from all necks together; a make of few "
        "specimens is drawn to the others by as much as they tell. `breakangle plan --taught FILE` uses it.",
    )
    verb.add_argument("folder", metavar="FOLDER", nargs="?", help="the folder of a run of the job learn")
    verb.add_argument("--makes", metavar="CSV", help="a table with the columns item and make")
    verb.add_argument(
        "--out", metavar="FILE", required=True, help="where it goes; the former version stays beside"
    )
    verb.add_argument("--put-back", action="store_true", help="put the former version of FILE back")
