"""The simulated camera: photos of the mask over the simulated sheet, as files that a real camera might have written.

Needs the extra `photos`. Import `photo` only where one is taken: it loads Pillow and OpenCV.

    from lampwarden.rig.camera.photo import photograph
    from lampwarden.rig.paper.sheet import SimPaper, measured_part

    mask = lay_out(sheet, PAPERS["a3"], open_all=True)
    paper = SimPaper(sheet, chamber, seed=7)              # fate="nothing", "ink_fades" ... to ask for one
    before, = photograph(sheet, mask, paper.state(), camera_seed=3, kind="fixed", shot=0)
    paper.step(3600, {"A1": 1.0}, air_temp_c=28.0)        # or paper.follow(world)
    after, = photograph(sheet, mask, paper.state(), camera_seed=3, kind="fixed", shot=1)
    truth = paper.state().lab_d50("A1", measured_part(sheet, "A1"))

`photograph` returns file contents: one, or as many as `bracket` says. What decides what:

    kind          "fixed": pose, exposure, white balance and lamp stay as the camera's seed drew them, the mask is laid
                  anew each time within half a millimetre. "phone": all of that is drawn anew with each shot.
    camera_seed   the camera (spectral sensitivities, colour matrix, tone curve, lens, noise) and, fixed, its place and
                  lamp; also the chart, whose patches differ a little from their published values (CHART_TOLERANCE).
    shot          one press of the button. The same seed and shot give the same bytes, with the same library versions.
    size          long and short side in pixels; the longer side lies along the longer side of the mask.
    format        "jpeg" (quality, subsampling; None: drawn for the phone, 88 4:2:0 fixed), "png", "png16"
    bracket       5: five exposures that put the white card from 0.92 down to 0.50 of saturation
    orientation   the EXIF orientation to store by, 1..8; None: 1 for the fixed camera, drawn for the phone
    faults        what goes wrong, see faults.Fault

What lies in the picture: the card printed as lampwarden.mask draws it, open apertures cut by hand, the sheet's print in
them (the bare paper covers at least nine tenths of the inner part of a cell, but for ink watch cells, where the watched
ink does), the chart (patches per chart.csv; CIELAB published for them: chart_lab), even grey steps (chart.GREYS), and
the swatches. What a cell's colour is about says measured_part: the bare paper or the watched ink, whose
cloudiness has the mean 1.

Not simulated: demosaicing, local tone mapping, chromatic aberration, rolling shutter, relief of the paper.

    photo      photograph: all of it together
    device     a camera and a shot, drawn from seeds
    scene      what lies there, in camera colours, seen straight from above
    printing   what is printed on card and sheet
    develop    from the scene to pixels: warp, light, flare, noise, tone
    files      from pixels to a file
    faults     what can go wrong
    mounted    the camera in the demo's chamber; loads nothing heavy
    __main__   `python -m lampwarden.rig.camera photo.jpg`, a camera command for the demo
"""
