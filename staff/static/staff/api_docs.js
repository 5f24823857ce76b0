// Draws the description of the doors. The key typed in stays in the page's memory and is gone with it.
"use strict";

const doors = document.getElementById("doors");
const mount = document.createElement("div");
doors.append(mount);
window.SwaggerUIBundle({
  url: doors.dataset.schema,
  domNode: mount,
  presets: [window.SwaggerUIBundle.presets.apis],
  deepLinking: true,
  persistAuthorization: false,
  validatorUrl: null,
});
