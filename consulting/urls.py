from django.urls import include, path

from consulting.views import errors, home, left, letters, people, practice, probes

own = [
    path("left/", left.left, name="left"),
    path("practice/", practice.details, name="practice_details"),
    path("practice/logo.png", practice.logo, name="practice_logo"),
    path("practice/logo/remove/", practice.logo_remove, name="practice_logo_remove"),
    path("practice/terms/", practice.terms, name="practice_terms"),
    path("practice/slopes/", practice.slopes, name="practice_slopes"),
    path("practice/letters/", practice.letters, name="practice_letters"),
    path("letters/", letters.letters, name="letters"),
    path("letters/<int:pk>/", letters.letter, name="letter"),
    path("letters/<int:pk>/again/", letters.again, name="letter_again"),
    path("letters/<int:pk>/take-back/", letters.take_back, name="letter_take_back"),
    path("practice/people/", people.people, name="people"),
    path("practice/people/invite/", people.invite, name="invite"),
    path("practice/people/<int:pk>/role/", people.role, name="member_role"),
    path("practice/people/<int:pk>/remove/", people.remove, name="member_remove"),
    path("practice/invitations/<int:pk>/withdraw/", people.withdraw, name="invitation_withdraw"),
]

urlpatterns = [
    path("", home.home, name="home"),
    path("health/", probes.health, name="health"),
    path("ready/", probes.ready, name="ready"),
    path("accounts/", include("allauth.urls")),
    path("practices/new/", home.found, name="practice_new"),
    path("invitation/<str:token>/", people.accept, name="invitation_accept"),
    path("", include("plans.public_urls")),
    path("<slug:practice>/", include(own)),
    path("<slug:practice>/", include("sites.urls")),
    path("<slug:practice>/", include("plans.urls")),
]

handler400 = errors.bad_request
handler403 = errors.permission_denied
handler404 = errors.page_not_found
handler500 = errors.server_error
