// Every page's script: parts of pages over the wire, keys and pedal, and what to do when the bench does not answer.
import "htmx.org";
import { startReadouts } from "./drawings/readout.js";
import { startSizes } from "./drawings/sized.js";
import { startFolded } from "./folded.js";
import { startDoing } from "./keys/doing.js";
import { startKeys } from "./keys/keys.js";
import { startOffline } from "./offline/offline.js";
import { startQueue } from "./offline/queue.js";
import { startOnce } from "./once.js";
import { startPlaces } from "./places.js";
import { startTold } from "./told.js";
import { startTyped } from "./typed.js";

document.documentElement.classList.add("scripted");
startKeys();
startDoing();
startOnce();
startPlaces();
startFolded();
startOffline();
startQueue();
startReadouts();
startSizes();
startTold();
startTyped();
