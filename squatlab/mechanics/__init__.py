"""Where the joints are, when the lifter balances, what each joint holds."""
