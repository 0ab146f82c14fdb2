"""The course as pages that move and answer in any browser, without a kernel."""
