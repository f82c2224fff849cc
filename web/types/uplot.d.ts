// uPlot is a script of its own beside the page, smaller so than as a module; npm brings its types.
declare var uPlot: typeof import("uplot");
