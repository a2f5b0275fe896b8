"""Signing in through the real page."""

from cast import PASSWORD


def sign_in(page, office, name, password=PASSWORD):
    """Fill in the sign-in form and send it."""
    page.goto(office + "/sign-in/")
    page.get_by_label("Name you sign in with").fill(name)
    page.get_by_label("Password").fill(password)
    with page.expect_navigation():
        page.get_by_role("button", name="Sign in").click()
