"""Following the finish over pours."""
