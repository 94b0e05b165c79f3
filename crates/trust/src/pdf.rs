//! The signature of a PDF report.
