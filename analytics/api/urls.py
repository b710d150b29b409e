"""Addresses of the analytics' resources."""

from django.urls import path

from analytics.api.rates import Rates

urlpatterns = [path("rates/", Rates.as_view(), name="api-rates")]
