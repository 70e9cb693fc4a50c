"""The mask: a white paper template laid over the sheet, with an opening for each cell and marks for the camera.

`layout.lay_out(sheet, paper)` says where everything is; `pdf.to_pdf(mask)` and `svg.to_svg(mask)` print it in true
scale. Keep the mask with the trial: photos are read by it. Nothing is imported here, for a quick `lampwarden --help`.
"""
