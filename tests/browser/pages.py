"""Every page of the office as the browser tests look at it: name, address, who looks. One line a page."""

PAGES = [
    ("sign-in", "/sign-in/", ""),
    ("nothing-here", "/nowhere/", "viewer"),
    ("not-yours", "/sites/works/names/", "viewer"),
    ("surveys", "/", "lead"),
    ("no-surveys", "/", "outsider"),
    ("road", "/surveys/demo/", "lead"),
    ("survey-history", "/surveys/demo/history/", "reviewer"),
    ("record-history", "/surveys/demo/history/sample/G-101/", "reviewer"),
    ("account", "/account/", "lead"),
    ("password", "/account/password/", "lead"),
    ("second-factor-new", "/second-factor/new/", "technician"),
    ("sites", "/sites/", "lead"),
    ("people", "/sites/works/people/", "lead"),
    ("member", "/sites/works/people/technician/", "lead"),
    ("worker-names", "/sites/works/names/", "lead"),
    ("worker-name", "/sites/works/names/W-01/", "lead"),
    ("site-history", "/sites/works/history/", "lead"),
]
