"""The templates there are, found by listing their folder: a new file appears everywhere by itself."""

import importlib
import pkgutil
from functools import lru_cache

from breakangle.documents import templates
from breakangle.documents.true_size.kinds import TemplateKind
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr


@lru_cache(maxsize=1)
def template_kinds() -> dict[str, TemplateKind]:
    """Return every template by name."""
    names = sorted(found.name for found in pkgutil.iter_modules(templates.__path__))
    modules = [importlib.import_module(f"{templates.__name__}.{name}") for name in names]
    kinds = [module.KIND for module in modules if hasattr(module, "KIND")]
    return {kind.name: kind for kind in kinds}


def template_kind(name: str) -> TemplateKind:
    """Return a template by its name.

    Raises:
        CorrectInputError: there is none; the error names those there are.
    """
    kinds = template_kinds()
    if name not in kinds:
        raise CorrectInputError(
            tr('there is no template "{name}"', name=name),
            tr("one of {kinds}", kinds=", ".join(kinds)),
            tr("choose one"),
        )
    return kinds[name]
