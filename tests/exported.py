"""Every table of the rooms by the hash of its rows: what must be equal before something and after undoing it."""

import hashlib
import json
from typing import Any

from django.apps import apps
from django.core.serializers.json import DjangoJSONEncoder

ROOMS = ("registry", "followup", "analytics")
# What counts and dates changes, and what is only ever added.
BOOKKEEPING = {"version", "changed_at", "changed_by"}
ONLY_ADDED = {
    *("registry_auditentry", "registry_chainhead", "registry_patientmerge"),
    *("registry_recordmove", "analytics_casetoweigh"),
}


class WithBytes(DjangoJSONEncoder):
    """Writes what is no text as the hash of its bytes."""

    def default(self, o: Any) -> Any:
        held = isinstance(o, bytes | memoryview)
        return hashlib.sha256(bytes(o)).hexdigest() if held else super().default(o)


def exported() -> dict[str, str]:
    """Return the hash of each table's rows but for what counts changes."""
    found = {}
    for model in apps.get_models(include_auto_created=True):
        if model._meta.app_label not in ROOMS or model._meta.db_table in ONLY_ADDED:
            continue
        names = [f.attname for f in model._meta.concrete_fields if f.name not in BOOKKEEPING]
        rows = list(model._base_manager.order_by("pk").values(*names))
        text = json.dumps(rows, cls=WithBytes, sort_keys=True)
        found[model._meta.db_table] = hashlib.sha256(text.encode()).hexdigest()
    return found
