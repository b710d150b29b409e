"""The published counts that ship, and the answer that puts them beside a view's own rates."""

import json
from functools import lru_cache
from pathlib import Path

from django.conf import settings

from analytics.answers import literature
from analytics.answers.horizons import HORIZONS
from analytics.answers.literature import Literature, LiteratureAnswer
from analytics.selectors.outcomes import Given


@lru_cache(maxsize=1)
def published() -> Literature:
    """Return the published counts, read once."""
    file = Path(settings.BASE_DIR) / "fixtures" / "published_counts.json"
    return literature.read(json.loads(file.read_text(encoding="utf-8")))


def literature_answer(view: Given) -> LiteratureAnswer:
    """Answer 'What do others report?' for the endpoint and cohort of a view."""
    return literature.answer(
        published(),
        view.data,
        view.definition,
        HORIZONS[view.rule.horizon],
        injury=view.rule.kind,
    )
