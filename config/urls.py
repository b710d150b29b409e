"""Every address of the service."""

from allauth.account import views as account
from django.urls import include, path, re_path

from config import background
from config.health import alive, health
from config.home import home
from config.metrics import metrics
from config.sign_in import hospital
from registry.api.resources import Unknown

handler400 = "config.faults.bad_request"
handler500 = "config.faults.server_error"
urlpatterns = [
    path("", home, name="home"),
    path("health/", health, name="health"),
    path("health/alive/", alive, name="alive"),
    path("metrics/", metrics, name="metrics"),
    path("account/sign-in/", account.login, name="account_login"),
    path("account/sign-out/", account.logout, name="account_logout"),
    path("account/password/", account.password_change, name="account_change_password"),
    path("account/signup/", account.signup, name="account_signup"),
    path("account/reauthenticate/", account.reauthenticate, name="account_reauthenticate"),
    path("account/inactive/", account.account_inactive, name="account_inactive"),
    path("account/at/<str:provider_id>/", hospital.begin, name="openid_connect_login"),
    path("account/at/<str:provider_id>/back/", hospital.back, name="openid_connect_callback"),
    path("account/factors/", include("allauth.mfa.urls")),
    path("setup/background/", background.background, name="background"),
    path("setup/background/<str:job>/run/", background.run_now, name="background-run"),
    path("", include("analytics.urls")),
    path("", include("registry.urls")),
    path("", include("followup.urls")),
    path("api/v1/", include("config.api_urls", namespace="v1")),
    re_path(r"^api/", Unknown.as_view(), name="api-unknown"),
    path("fhir/r4/", include("followup.api.fhir.urls", namespace="fhir")),
]
