"""Every address of the service."""

urlpatterns: list = []
