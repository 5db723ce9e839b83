"""The pages, in the order of the work."""

from sparkwright.web.pages import files, hand_over, history, job, jobs, personal

PAGES = (personal.router, jobs.router, job.router, hand_over.router, history.router, files.router)
