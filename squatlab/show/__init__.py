"""Pictures, charts, explorers and sheets: the only home of plots and widgets."""
