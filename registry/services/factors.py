"""Taking a lost second factor away, so that its owner can set up another."""

from datetime import datetime

from allauth.mfa.models import Authenticator
from django.db import transaction

from registry.errors import BadInput
from registry.models.people import Person
from registry.models.sign_ins import SignInEventKind
from registry.selectors.factors import WORDS
from registry.services import audit, sessions, sign_ins


def remove_factors(*, person: Person, reason: str, by: Person, now: datetime) -> int:
    """Remove every second factor of a person, who is signed out everywhere, tokens too; return how many.

    The trail says who did it and why; no secret is kept there. Raises BadInput for oneself, without
    a reason, and where there is none.
    """
    if person.pk == by.pk:
        raise BadInput("Remove your own under your name at the top, or ask a colleague.")
    if not reason.strip():
        raise BadInput({"reason": "Say why, and how you made sure that it is them."})
    with transaction.atomic():
        rows = list(Authenticator.objects.select_for_update().filter(user=person).order_by("pk"))
        if not rows:
            raise BadInput(f"{person} has no second factor.")
        named = [WORDS[row.type] for row in rows]
        Authenticator.objects.filter(pk__in=[row.pk for row in rows]).delete()
        audit.record_factors_removed(person=person, named=named, reason=reason, by=by, now=now)
        sessions.shut_out(person=person, by=by, now=now)
        sign_ins.write_down(
            SignInEventKind.FACTOR_REMOVED,
            person=person,
            by=by,
            now=now,
            detail=", ".join(named),
        )
    return len(rows)
