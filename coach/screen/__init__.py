"""The screens. They show moments of a drive and pass on choices; nothing here knows the protocol or judges a drive."""
