"""Addresses of the report, of review and signatures, of documents and the dossier, and of what is kept how long."""

from django.urls import path

from lapel.office.report import letterhead_views, paper_views, retention_views, review_views, views

urlpatterns = [
    path("surveys/<str:survey>/report/", views.report, name="survey-report"),
    path("surveys/<str:survey>/report/texts/", views.texts, name="report-texts"),
    path("surveys/<str:survey>/report/terms/", views.terms, name="report-terms"),
    path("surveys/<str:survey>/report/told/", views.told, name="survey-told"),
    path("surveys/<str:survey>/report/to-do/new/", views.new_recommendation, name="recommendation-new"),
    path("surveys/<str:survey>/report/to-do/<int:number>/", views.recommendation, name="recommendation"),
    path("surveys/<str:survey>/report/to-do/<int:number>/strike/", views.strike, name="recommendation-strike"),
    path("surveys/<str:survey>/report/papers/<str:name>", paper_views.paper, name="report-paper"),
    path("surveys/<str:survey>/report/kept/", paper_views.kept_papers, name="kept-papers"),
    path("surveys/<str:survey>/report/kept/<int:number>", paper_views.kept_paper, name="kept-paper"),
    path("surveys/<str:survey>/report/dossier/", paper_views.dossier, name="survey-dossier"),
    path("surveys/<str:survey>/report/dossier/<str:variant>.zip", paper_views.dossier_file, name="dossier-file"),
    path("surveys/<str:survey>/review/", review_views.review, name="survey-review"),
    path("surveys/<str:survey>/review/new/", review_views.new_comment, name="comment-new"),
    path("surveys/<str:survey>/review/<int:number>/answer/", review_views.answer, name="comment-answer"),
    path("surveys/<str:survey>/review/sign/", review_views.put_name, name="survey-sign"),
    path("surveys/<str:survey>/review/signatures/<int:number>/", review_views.signature, name="signature"),
    path("sites/<str:site>/retention/", retention_views.retention, name="retention"),
    path("sites/<str:site>/letterhead/", letterhead_views.letterhead, name="letterhead"),
    path("sites/<str:site>/letterhead/logo", letterhead_views.logo, name="letterhead-logo"),
    path("sites/<str:site>/letterhead/<str:language>/<str:section>/", letterhead_views.words, name="letterhead-words"),
]
