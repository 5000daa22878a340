"""Printed sheets: HTML to PDF in a child process, with the shop's fonts and nothing from outside the house.

press    the one door: `to_pdf`, and the child that it keeps warm
worker   the child: WeasyPrint under a memory limit; knows nothing of Django
fetcher  what a sheet may load: the house's own static files, and what stands in the page itself or came with it
paper    paper sizes and the ground of a page: frame, zones, DRAFT
frames   the messages between the two
runs     sheets that are printed in the background: what is kept of each, and how it stands
background  the work of such a run, one at a time
"""
