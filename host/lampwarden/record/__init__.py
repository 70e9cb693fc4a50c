"""The treatment record: all that was done to a sheet in a session, in one piece that outlives this program.

gather     from the service to a Record, which is plain data and comes back from its JSON unchanged
telling    a Record as a document: headings, sentences, tables, pictures (pure)
html       the document as one page that stands alone
pdf        the document to print
tables     the numbers as CSV
colours    of these, every colour that was read
bag        all of it with the original photos as a BagIt bag (RFC 8493)
archive    bags from other hosts, checked and kept
concluded  what a record's readings say, reckoned from the record alone (pure)
"""
