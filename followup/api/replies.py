from typing import Any

from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.utils import extend_schema
from rest_framework import exceptions, serializers
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.generics import get_object_or_404
from rest_framework.permissions import BasePermission
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from followup.models.replies import ReplyMeans
from followup.services import replies as service
from registry.api.resources import NotKept
from registry.api.rows import Strict
from registry.models.sites import Site

PROVIDER = "provider"


class BySecret(BaseAuthentication):
    """Lets in the provider of messages, who is no person and may do nothing else."""

    def authenticate(self, request: Request) -> tuple[AnonymousUser, str]:
        given = get_authorization_header(request)
        wanted = f"Bearer {settings.REPLY_SECRET}".encode()
        if not settings.REPLY_SECRET or not constant_time_compare(given, wanted):
            raise exceptions.AuthenticationFailed("Send the service's secret for answers.")
        return AnonymousUser(), PROVIDER

    def authenticate_header(self, request: Request) -> str:
        return "Bearer"


class BySecretDescribed(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """Describes the secret of a provider."""

    target_class = BySecret
    name = "replySecret"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer", "description": "HOLDFAST_REPLY_SECRET"}


class IsProvider(BasePermission):
    def has_permission(self, request: Request, view: Any) -> bool:
        return bool(request.auth == PROVIDER)


class ReplySerializer(Strict, serializers.Serializer[Any]):
    """What a provider hands on: its own name of the message, the number, the text, the moment."""

    key = serializers.CharField(max_length=service.LONGEST_KEY)
    text = serializers.CharField(allow_blank=True, trim_whitespace=False)
    means = serializers.ChoiceField(choices=ReplyMeans.choices, default=ReplyMeans.TEXT.value)
    received_at = serializers.DateTimeField(required=False)

    def get_fields(self) -> dict[str, Any]:
        # The word is one of the language's own and cannot be written as a name.
        return {**super().get_fields(), "from": serializers.CharField(max_length=254)}


class TakenSerializer(serializers.Serializer[Any]):
    """That it was kept; what became of it is for the people of the site."""

    key = serializers.CharField()


class Replies(NotKept, APIView):
    """What patients answer to messages, as their provider hands it on."""

    authentication_classes = [BySecret]
    permission_classes = [IsProvider]

    @extend_schema(
        request=ReplySerializer,
        responses={201: TakenSerializer},
        description="Hands on an incoming message. The same key is taken once: sent again, it changes "
        "nothing; with another sender or text it is refused (409).",
    )
    def post(self, request: Request, site_code: str) -> Response:
        site = get_object_or_404(Site.objects.filter(is_active=True), code=site_code)
        sent = ReplySerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        now = timezone.now()
        taken = service.take_reply(
            site=site,
            key=sent.validated_data["key"],
            means=sent.validated_data["means"],
            sender=sent.validated_data["from"],
            text=sent.validated_data["text"],
            received_at=sent.validated_data.get("received_at", now),
            now=now,
            today=timezone.localdate(),
        )
        return Response({"key": taken.key}, status=201)
