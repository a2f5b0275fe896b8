"""Signing in through the real page."""

from cast import PASSWORD
from looking import turn_page


def sign_in(page, office, name, password=PASSWORD):
    """Fill in the sign-in form and send it."""
    page.goto(office + "/sign-in/")
    page.get_by_label("Name you sign in with").fill(name)
    page.get_by_label("Password").fill(password)
    turn_page(page.get_by_role("button", name="Sign in"))
