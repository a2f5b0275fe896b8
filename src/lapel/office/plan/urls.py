"""Addresses of the plan's pages."""

from django.urls import path

from lapel.office.plan import by_hand, papers, search_pages, views

PLAN = "surveys/<str:survey>/plan/"

urlpatterns = [
    path(PLAN, views.plan, name="survey-plan"),
    path(f"{PLAN}start/", views.start, name="plan-start"),
    path(f"{PLAN}windows/", views.windows, name="plan-windows"),
    path(f"{PLAN}whom/", views.whom, name="plan-whom"),
    path(f"{PLAN}terms/", views.terms, name="plan-terms"),
    path(f"{PLAN}tables/<str:name>/", views.table, name="plan-table"),
    path(f"{PLAN}search/", search_pages.search, name="plan-ask"),
    path(f"{PLAN}search/<int:number>/", search_pages.search_page, name="plan-search"),
    path(f"{PLAN}search/<int:number>/stop/", search_pages.stop, name="plan-stop"),
    path(f"{PLAN}search/<int:number>/take/", search_pages.take, name="plan-take"),
    path(f"{PLAN}change/", search_pages.bend, name="plan-bend"),
    path(f"{PLAN}trains/new/", by_hand.new_train, name="plan-train-new"),
    path(f"{PLAN}trains/<int:number>/", by_hand.train, name="plan-train"),
    path(f"{PLAN}trains/<int:number>/out/", by_hand.drop_train, name="plan-train-out"),
    path(f"{PLAN}out/", by_hand.wipe, name="plan-out"),
    path(f"{PLAN}order/", views.order, name="plan-order"),
    path(f"{PLAN}papers/<str:name>", papers.paper, name="plan-paper"),
]
