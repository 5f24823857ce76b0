"""Mails carry a reference, a date and a link to sign in: nothing about health, no name, no product, no clinic."""
