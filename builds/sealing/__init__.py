"""Signed and sealed sheets: what was signed can be proved, with this book or without it.

kinds        which sheets there are: how each is taken down, printed, and what it lacks
canonical    one way of writing a thing as bytes; digests
rows         what of a database row goes into a digest
chain        the entry of a sealed sheet, and what it says about readings and photos
rules        who may sign what
authority    the shop's own certificates, their keys wrapped with a passphrase
marks        what a sheet shows of its seal: strokes, code, digest
pdf          the PDF: printed, with both attachments, signed twice
service      begin, sign, seal, accept: the only ways in
differences  what changed between two sheets, figure by figure
verify       everything rehashed; what does not match is named
standalone   the same for a folder of PDFs, without this book
"""
