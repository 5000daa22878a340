"""Every address of the book. Valvetrain adds its own."""

from django.contrib.auth import views as auth_views
from django.urls import include, path

from builds.views.first_owner import LogIn, make_first_owner

urlpatterns = [
    path(
        "login/",
        login_not_required(auth_views.LoginView.as_view(template_name="builds/login.html")),
        name="login",
    ),
    path("logout/", auth_views.LogoutView.as_view(), name="logout"),
    path("", include("valvetrain.urls")),
]
