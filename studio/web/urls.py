"""Where every screen lives. A name here is the one the header looks for (`studio.web.shell.WORDS`)."""

from django.urls import include, path

from studio.web import signin

urlpatterns = [
    path("sign-in/", signin.SignIn.as_view(), name="sign_in"),
    path("sign-out/", signin.SignOut.as_view(), name="sign_out"),
    path("", include("studio.web.screens.photographs")),
    path("", include("studio.web.screens.help")),
    path("", include("studio.web.screens.people")),
    path("", include("studio.web.screens.pieces")),
    path("", include("studio.web.screens.pieces_page")),
    path("", include("studio.web.screens.pieces_ticks")),
    path("", include("studio.web.screens.pieces_deeds")),
    path("", include("studio.web.screens.papers")),
    path("", include("studio.web.screens.public")),
    path("", include("studio.web.screens.settings")),
    path("", include("studio.web.screens.set_up")),
    path("", include("studio.web.screens.bench")),
    path("", include("studio.web.screens.round")),
    path("", include("studio.web.screens.wood")),
    path("", include("studio.web.screens.stores")),
    path("", include("studio.web.screens.material")),
    path("", include("studio.web.screens.material_batch")),
    path("", include("studio.web.screens.resin")),
    path("", include("studio.web.screens.bath")),
    path("", include("studio.web.screens.equipment")),
    path("", include("studio.web.screens.moulds")),
    path("", include("studio.web.screens.loads")),
    path("", include("studio.web.screens.loads_page")),
    path("", include("studio.web.screens.pour_mix")),
    path("", include("studio.web.screens.pour_book")),
    path("", include("studio.web.screens.pour")),
    path("", include("studio.web.screens.stabilizing")),
]
