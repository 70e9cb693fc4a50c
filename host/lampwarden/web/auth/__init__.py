"""Who may touch it: passwords, sign-in, access tokens, and what those who only watch may not do.

people      the file of passwords and tokens
signed_in   who is signed in, also over a restart
patience    how long a wrong password makes wait (pure)
access      all three together, and their lines in the journal
gate        before every request: sign-in, or a token
sign_in     the page
watching    a service that refuses orders
commands    `lampwarden password ...`
"""
