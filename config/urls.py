"""Every address of the service."""

from allauth.account import views as account
from django.urls import include, path, re_path

from config import background
from config.health import health
from config.home import home
from registry.api.resources import Unknown

handler500 = "config.faults.server_error"
urlpatterns = [
    path("", home, name="home"),
    path("health/", health, name="health"),
    path("account/sign-in/", account.login, name="account_login"),
    path("account/sign-out/", account.logout, name="account_logout"),
    path("account/password/", account.password_change, name="account_change_password"),
    path("account/signup/", account.signup, name="account_signup"),
    path("account/reauthenticate/", account.reauthenticate, name="account_reauthenticate"),
    path("account/inactive/", account.account_inactive, name="account_inactive"),
    path("setup/background/", background.background, name="background"),
    path("setup/background/<str:job>/run/", background.run_now, name="background-run"),
    path("", include("analytics.urls")),
    path("", include("registry.urls")),
    path("", include("followup.urls")),
    path("api/v1/", include("config.api_urls", namespace="v1")),
    re_path(r"^api/", Unknown.as_view(), name="api-unknown"),
]
