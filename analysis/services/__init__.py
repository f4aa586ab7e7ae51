"""The verbs that the screens and the command line call; composes rooms."""
