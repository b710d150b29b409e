"""What every resource does alike: rights by act, the rows one may see, versions, one kind of answer."""

from collections.abc import Callable, Mapping
from typing import Any, ClassVar

from django.db.models import Model, QuerySet
from rest_framework import exceptions
from rest_framework.permissions import BasePermission, IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer
from rest_framework.views import APIView
from rest_framework.viewsets import GenericViewSet

from registry.api.base import Paging, only_known, version_wanted, with_etag
from registry.errors import BadInput, NotAllowed, StaleVersion
from registry.selectors import visible as registry_visible


class Rights(BasePermission):
    """Opens an act to those whose roles permit it at any site, and the interface at all."""

    def has_permission(self, request: Request, view: Any) -> bool:
        registry_visible.require(request.user, "use_api")
        registry_visible.require(request.user, view.right())
        return True


class NotKept:
    """Tells whatever stands between not to keep an answer: it is for one person's eyes."""

    def finalize_response(self, *args: Any, **kwargs: Any) -> Response:
        answer: Response = super().finalize_response(*args, **kwargs)  # type: ignore[misc]
        answer["Cache-Control"] = "no-store"
        return answer


class Resource(NotKept, GenericViewSet):
    """Rows of one kind: seen through the one visibility function, written through services only.

    `rights` names the right that an act needs where seeing is not enough; `versioned` lists the acts
    that change a row and therefore want its version; `joined` and `gathered` are read with the rows.
    """

    permission_classes = [IsAuthenticated, Rights]
    lookup_value_converter = "int"
    http_method_names = ["get", "post", "patch", "head", "options"]
    model: ClassVar[type[Model]]
    filterset_class: ClassVar[Any]
    see: ClassVar[str] = "see_patient"
    rights: ClassVar[Mapping[str, str]] = {}
    versioned: ClassVar[frozenset[str]] = frozenset({"partial_update"})
    joined: ClassVar[tuple[str, ...]] = ("site", "recorded_by", "changed_by")
    gathered: ClassVar[tuple[Any, ...]] = ()
    # What a service calls otherwise than the interface does.
    renamed: ClassVar[Mapping[str, str]] = {}
    visible: ClassVar[Callable[..., QuerySet[Any]]] = staticmethod(registry_visible.visible)

    def right(self) -> str:
        """Return the right that the present act needs."""
        return self.rights.get(self.action or "", self.see)

    def get_queryset(self) -> QuerySet[Any]:
        if getattr(self, "swagger_fake_view", False):
            return self.model._default_manager.none()
        rows = self.visible(self.request.user, self.model, self.see)
        return rows.select_related(*self.joined).prefetch_related(*self.gathered).order_by("pk")

    def handle_exception(self, exc: Exception) -> Response:
        if isinstance(exc, BadInput):
            faults = exc.faults.items()
            exc = BadInput({self.renamed.get(name, name): text for name, text in faults})
        return super().handle_exception(exc)

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        filters = self.filterset_class.base_filters
        only_known(request, (*filters, Paging.page_query_param, Paging.page_size_query_param))
        page = self.paginate_queryset(self.filter_queryset(self.get_queryset()))
        return self.get_paginated_response(self.get_serializer(page, many=True).data)

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return self.answer(self.get_object())

    def row(self) -> Any:
        """Return the row that the act is about; 404 when it is not theirs to see, 403 to change."""
        row = self.get_object()
        theirs = self.visible(self.request.user, self.model, self.right())
        if not theirs.filter(pk=row.pk).exists():
            raise NotAllowed("Your roles at this row's site do not permit this.")
        return row

    def expected(self, row: Any) -> int:
        """Return the version in If-Match.

        Raises VersionNotGiven (428) without it, StaleVersion (412) when the row is newer.
        """
        version = version_wanted(self.request)
        if version != row.version:
            what = str(row._meta.verbose_name).capitalize()
            raise StaleVersion(what, expected=version, current=row.version)
        return version

    def given(self, row: Any = None) -> Any:
        """Read and check what was sent: a whole new row, or what changes of an old one."""
        serializer: BaseSerializer[Any] = self.get_serializer(
            row, data=self.request.data, partial=row is not None
        )
        serializer.is_valid(raise_exception=True)
        return serializer

    def answer(self, row: Any, status: int = 200) -> Response:
        """Answer with one row and its entity tag."""
        return with_etag(Response(self.get_serializer(row).data, status=status), row.version)

    def saved(self, row: Any, status: int = 200) -> Response:
        """Answer with a row as it stands after a write."""
        return self.answer(self.get_queryset().get(pk=row.pk), status)


class Unknown(APIView):
    """Answers for addresses that do not exist in the interface's own way."""

    schema = None
    versioning_class = None

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        raise exceptions.NotFound("There is no such address; /api/ lists those there are.")
