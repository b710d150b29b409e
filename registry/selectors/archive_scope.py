"""Which tables an archive holds, and which of their rows belong to one site.

A model can say itself how its rows belong to a site: `archived_by` names the ways to it, any of which
will do; `archived = False` leaves a table out, such as the bookkeeping of workers; `archived_alone = False`
leaves it out of the archive of one site, because its rows are about several.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.apps import apps
from django.db.models import CharField, Model, Q, QuerySet
from django.db.models.functions import Cast

from registry.models.audit import AuditEntry, ChainHead
from registry.models.people import Person
from registry.models.sites import Site

AnyModel = type[Model]
SEALED = (AuditEntry, ChainHead)
UNSEALED = {
    "position": None,
    **dict.fromkeys(("previous_hash", "hash", "before_digest", "after_digest"), ""),
}


@dataclass(frozen=True)
class Table:
    """One table of an archive, the rows that go into it by their key, and what some columns say instead."""

    model: AnyModel
    rows: QuerySet[Any]
    instead: Mapping[str, Any] = field(default_factory=dict)


def archived_models() -> list[AnyModel]:
    """Return the models of the service that an archive holds, links between two of them included."""
    own = [config for config in apps.get_app_configs() if getattr(config, "is_room", False)]
    models = [model for config in own for model in config.get_models(include_auto_created=True)]
    kept = [model for model in models if getattr(model, "archived", True)]
    return sorted(
        (model for model in kept if set(_targets(model)) <= set(kept)),
        key=lambda model: model._meta.db_table,
    )


def whole() -> list[Table]:
    """Return every table with all its rows."""
    return [Table(model, _all(model).order_by("pk")) for model in archived_models()]


def of_site(site: Site) -> list[Table]:
    """Return every table with the rows of one site and what they stand on at other sites.

    The trail comes with its entries about these rows, without the seals of a chain that has others
    in it.
    """
    models = [
        model
        for model in archived_models()
        if model not in SEALED and getattr(model, "archived_alone", True)
    ]
    chosen = {
        model: Q(pk__in=_all(model).filter(_belongs(model, site)).values("pk")) for model in models
    }
    _stand_on(models, chosen)
    tables = [Table(model, _all(model).filter(chosen[model]).order_by("pk")) for model in models]
    return [*tables, Table(AuditEntry, _trail(tables, site), UNSEALED)]


def _all(model: AnyModel) -> QuerySet[Any]:
    return model._base_manager.all()


def _targets(model: AnyModel) -> Iterator[AnyModel]:
    for column in model._meta.concrete_fields:
        if column.is_relation:
            yield column.related_model  # type: ignore[misc]


def _belongs(model: AnyModel, site: Site) -> Q:
    """Say how rows of a model belong to a site; none do where only others lead to them."""
    found = Q(pk__in=[])
    for path in _paths(model, ()):
        found |= Q(**{path: site.pk})
    nullable = next((f for f in model._meta.concrete_fields if f.name == "site"), None)
    return found | Q(site__isnull=True) if nullable is not None and nullable.null else found


def _paths(model: AnyModel, seen: tuple[AnyModel, ...]) -> list[str]:
    if model is Site:
        return ["pk"]
    declared: tuple[str, ...] = getattr(model, "archived_by", ())
    if declared:
        return list(declared)
    fields = [f for f in model._meta.concrete_fields if f.is_relation and not f.null]
    if any(one.related_model is Site for one in fields):
        return [next(f.name for f in fields if f.related_model is Site)]
    if any(one.name == "site" for one in model._meta.concrete_fields):
        return ["site"]
    for column in fields:
        target: Any = column.related_model
        if target is not Person and target not in seen and target is not model:
            further = _paths(target, (*seen, model))
            if further:
                return [f"{column.name}__{path}" for path in further]
    return []


def _stand_on(models: list[AnyModel], chosen: dict[AnyModel, Q]) -> None:
    """Add what chosen rows refer to, until nothing is missing: no reference may lead nowhere."""
    missing = True
    while missing:
        missing = False
        for model in models:
            rows = _all(model).filter(chosen[model])
            for column in model._meta.concrete_fields:
                target: Any = column.related_model
                if target not in chosen:
                    continue
                wanted = rows.exclude(**{column.attname: None}).values(column.attname)
                new = list(
                    _all(target)
                    .filter(pk__in=wanted)
                    .exclude(chosen[target])
                    .values_list("pk", flat=True)
                )
                if new:
                    chosen[target] |= Q(pk__in=new)
                    missing = True


def _trail(tables: list[Table], site: Site) -> QuerySet[Any]:
    about = Q(after__site_id=site.pk) | Q(before__site_id=site.pk)
    for table in tables:
        keys = table.rows.order_by().annotate(key_text=Cast("pk", CharField())).values("key_text")
        about |= Q(table=table.model._meta.db_table, row_id__in=keys)
    return AuditEntry.objects.filter(about).order_by("pk")
