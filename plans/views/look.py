"""Our look and our words: how a practice's print is colored, headed and worded, with the pages beside it."""

from __future__ import annotations

from dataclasses import replace

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext, gettext_lazy
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_POST, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.formkit import attempt
from consulting.models import Logo
from consulting.policy import Right
from plans import own_look
from plans.documents.colours import contrast, is_colour, palette_of
from plans.documents.own_words import values
from plans.forms.look import COLOURS, LookForm, WordsForm, with_shades
from plans.look_preview import Preview, Shown, page_png, print_of, shown_on
from plans.manners import look_of
from plans.planning.own_words import SECTIONS, VARIABLES, places
from plans.views.offers import as_file

GROUPS = {
    "program": gettext_lazy("For a kill program"),
    "seeding": gettext_lazy("For a seeding"),
    "": gettext_lazy("In every proposal"),
}
"""By the kind of place; without one, everywhere."""


def _look_page(request: PracticeRequest, form: LookForm, pages: Preview | None = None) -> HttpResponse:
    kept = look_of(request.practice)
    typed = {name: str(form[name].value()).strip().lower() for name in COLOURS}
    main, accent = (typed[name] if is_colour(typed[name]) else getattr(kept, name) for name in COLOURS)
    wash = palette_of(main, accent).wash
    context = {
        "form": form,
        "preview": pages,
        "logo": Logo.objects.filter(practice=request.practice).defer("png").first(),
        "contrasts": [
            (name, colour, contrast(colour, "#ffffff"), contrast(colour, wash))
            for name, colour in ((gettext("Main color"), main), (gettext("Second color"), accent))
        ],
    }
    return render(request, "plans/look.html", context, status=422 if form.errors else 200)


@require_safe
@practice_view(Right.SEE_PRICES)
def look(request: PracticeRequest) -> HttpResponse:
    return _look_page(request, LookForm(instance=own_look.look_for(request.practice)))


@require_POST
@practice_view(Right.RUN_PRACTICE)
def look_save(request: PracticeRequest) -> HttpResponse:
    """Save, or with `preview` show what was typed on the pages of a plan."""
    form = LookForm(with_shades(request.POST), instance=own_look.look_for(request.practice))
    if not form.is_valid():
        return _look_page(request, form)
    if "preview" in request.POST:
        shown = shown_on(request.practice, today_for(request.practice))
        typed = replace(look_of(request.practice), **form.cleaned_data)
        return _look_page(request, form, shown.preview(typed, request.membership))
    if attempt(form, own_look.look_save, practice=request.practice) is None:
        return _look_page(request, form)
    messages.success(
        request, gettext("Your look is saved. What was offered keeps the look that it was printed in.")
    )
    return redirect("practice_look", request.practice.slug)


@require_safe
@practice_view(Right.RUN_PRACTICE)
def preview_pdf(request: PracticeRequest, stamp: str) -> HttpResponse:
    pdf = print_of(request.membership, stamp)
    if pdf is None:
        raise Http404("another preview was made since")
    return as_file(pdf, "application/pdf", "preview.pdf", inline=True)


@require_safe
@practice_view(Right.RUN_PRACTICE)
def preview_page(request: PracticeRequest, stamp: str, page: int) -> HttpResponse:
    pdf = print_of(request.membership, stamp)
    png = page_png(pdf, page) if pdf else None
    if png is None:
        raise Http404("another preview was made since")
    return HttpResponse(png, content_type="image/png")


@require_safe
@practice_view(Right.SEE_WORK)
@cache_control(private=True, max_age=60)
def look_css(request: PracticeRequest) -> HttpResponse:
    return HttpResponse(own_look.look_css(look_of(request.practice)), content_type="text/css")


@require_safe
@practice_view(Right.SEE_PRICES)
def words(request: PracticeRequest) -> HttpResponse:
    """Every place for own words, with what is said there."""
    written = own_look.look_for(request.practice).words
    groups: dict[str, list[tuple[str, str, str]]] = {}
    for place, name in places().items():
        kind = place.partition(":")[0]
        group = str(GROUPS.get(kind) or GROUPS[""])
        groups.setdefault(group, []).append((place, name, written.get(place, "")))
    return render(request, "plans/words.html", {"groups": groups})


def _words_page(
    request: PracticeRequest,
    place: str,
    form: WordsForm,
    shown: Shown,
    pages: Preview | None = None,
) -> HttpResponse:
    job = shown.outcome.job
    examples = values(shown.outcome, shown.until, job.conversions)
    context = {
        "form": form,
        "place": place,
        "name": places()[place],
        "in_a_section": place in SECTIONS,
        "variables": [(name, said, examples[name]) for name, said in VARIABLES.items()],
        "example_of": job.title,
        "preview": pages,
    }
    return render(request, "plans/words_at.html", context, status=422 if form.errors else 200)


def _shown(request: PracticeRequest, place: str) -> Shown:
    if place not in places():
        raise Http404("no such place for words")
    return shown_on(request.practice, today_for(request.practice), place)


@require_safe
@practice_view(Right.SEE_PRICES)
def words_at(request: PracticeRequest, place: str) -> HttpResponse:
    shown = _shown(request, place)
    return _words_page(request, place, _words_form(request, place), shown)


def _words_form(request: PracticeRequest, place: str) -> WordsForm:
    kept = own_look.look_for(request.practice)
    return WordsForm(request.POST or None, look=kept, initial={"text": kept.words.get(place, "")})


@require_POST
@practice_view(Right.RUN_PRACTICE)
def words_save(request: PracticeRequest, place: str) -> HttpResponse:
    """Save, or show what was typed on the pages, as `look_save` does."""
    shown = _shown(request, place)
    form = _words_form(request, place)
    if not form.is_valid():
        return _words_page(request, place, form, shown)
    if "preview" in request.POST:
        kept = look_of(request.practice)
        typed = replace(kept, words=kept.words | {place: form.cleaned_data["text"]})
        return _words_page(request, place, form, shown, shown.preview(typed, request.membership, place))
    if attempt(form, own_look.words_save, practice=request.practice, place=place) is None:
        return _words_page(request, place, form, shown)
    messages.success(request, gettext("Your words are saved. New proposals carry them."))
    return redirect("practice_words", request.practice.slug)
