"""Addresses of the people pages."""

from django.contrib.auth.views import LogoutView
from django.urls import path

from lapel.office.people import account_views, session_views, site_views
from lapel.office.people.second_factor import open_before_second_factor

urlpatterns = [
    path("sign-in/", account_views.sign_in, name="sign-in"),
    path("sign-out/", open_before_second_factor(LogoutView.as_view()), name="sign-out"),
    path("second-factor/", account_views.give_second_factor, name="second-factor"),
    path("second-factor/new/", account_views.set_up_second_factor, name="second-factor-new"),
    path("second-factor/end/", account_views.end_second_factor, name="second-factor-end"),
    path("backup-codes/", account_views.backup_codes, name="backup-codes"),
    path("backup-codes/new/", account_views.renew_backup_codes, name="backup-codes-new"),
    path("account/", account_views.account, name="account"),
    path("account/password/", account_views.change_password, name="password"),
    path("account/sessions/", session_views.sessions, name="sessions"),
    path("account/sessions/end/", session_views.end_other_sessions, name="sessions-end"),
    path("account/sessions/<str:mark>/end/", session_views.end_session, name="session-end"),
    path("account/changes/noticed/", session_views.notice_changes, name="changes-noticed"),
    path("password-strength/", session_views.password_strength, name="password-strength"),
    path("invitation/<uidb64>/<token>/", account_views.invitation, name="invitation"),
    path("sites/", site_views.sites, name="sites"),
    path("sites/<str:site>/people/", site_views.people, name="people"),
    path("sites/<str:site>/invite/", site_views.invite, name="invite"),
    path("sites/<str:site>/people/<str:username>/", site_views.member, name="member"),
    path("sites/<str:site>/people/<str:username>/remove/", site_views.remove, name="member-remove"),
    path("sites/<str:site>/people/<str:username>/link/", site_views.renew_link, name="member-link"),
    path(
        "sites/<str:site>/people/<str:username>/sessions/end/",
        site_views.end_sessions,
        name="member-sessions-end",
    ),
    path(
        "sites/<str:site>/people/<str:username>/second-factor/end/",
        site_views.clear_second_factor,
        name="member-second-factor-end",
    ),
    path("sites/<str:site>/names/", site_views.worker_names, name="worker-names"),
    path("sites/<str:site>/names/<path:worker>/", site_views.worker_name, name="worker-name"),
]
