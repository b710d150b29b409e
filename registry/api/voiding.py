from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from registry.api.rows import Strict
from registry.services import voiding as service


class VoidSerializer(Strict, serializers.Serializer):
    """Why a row is wrong."""

    reason = serializers.CharField(max_length=280)


class Voidable:
    """Adds the act of taking a wrong row out of every count; the trail keeps it and the reason."""

    @extend_schema(request=VoidSerializer, responses={204: None})
    @action(detail=True, methods=["post"])
    def void(self: Any, request: Request, **where: Any) -> Response:
        """Take a wrong row out of every count, with the reason; nothing is deleted."""
        row = self.row()
        version = self.expected(row)
        sent = VoidSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        service.void_row(
            row=row,
            reason=sent.validated_data["reason"],
            expected_version=version,
            by=request.user,
            now=timezone.now(),
        )
        return Response(status=204)
