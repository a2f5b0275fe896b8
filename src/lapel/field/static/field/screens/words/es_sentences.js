/**
 * What the page makes of the log, in Spanish: found by the English, {names} filled in. Nothing of it goes into the log.
 *
 * @type {Record<string, string>}
 */
export const ES_SENTENCES = {
  // two accounts of one act, and what cannot be
  '{before} and {act}': '{before} y {act}',
  '{before} and {next}': '{before} y {next}',
  '{before} or {next}': '{before} o {next}',
  '{before} with {next}': '{before} con {next}',
  '{before}, or {next}': '{before}, o {next}',
  '{kind} {fields} by {author}': '{kind} {fields}, de {author}',
  '{kind}: {acts} look like one act. The first counts. Withdraw one, or say that they are two acts.':
    '{kind}: {acts} parecen un mismo hecho. Cuenta la primera. Retire una, o diga que son dos hechos.',
  '{kind} of {subject} is recorded in {first} and in {second}. The first counts.':
    '{kind} de {subject} está anotado en {first} y en {second}. Cuenta la primera.',
  'Entry {id} exists with {n} contents: {contents}. The first counts. Withdraw it and record what happened again.':
    'La anotación {id} existe con {n} contenidos: {contents}. Cuenta el primero. Retírela y anote otra vez lo que pasó.',
  '{field} of entry {id} was corrected to {values}. The last counts. Withdraw the wrong one.':
    '{field} de la anotación {id} se corrigió a {values}. Cuenta la última. Retire la equivocada.',
  'Device {device} numbered {n} entries {number}: {ids}. Is there a second device under this name?':
    'El dispositivo {device} numeró {n} anotaciones con el {number}: {ids}. ¿Hay otro dispositivo con este nombre?',
  'The corrections {ids} correct one another in a circle. None of them counts.':
    'Las correcciones {ids} se corrigen unas a otras en círculo. Ninguna cuenta.',
  'Correction {id} corrects entry {entry}, which is not in the log (yet).':
    'La corrección {id} corrige la anotación {entry}, que no está (aún) en el registro.',
  'The {phase} round of train {train} was declared in {first} and in {second}.':
    'La ronda {phase} del tren {train} se declaró en {first} y en {second}.',
  'The {phase} round of train {train} was declared in {first} and in {second}, with different answers. The first counts.':
    'La ronda {phase} del tren {train} se declaró en {first} y en {second}, con respuestas distintas. Cuenta la primera.',
  'Train {train}, {kind} at {time}: {about}.': 'Tren {train}, {kind} el {time}: {about}.',
  'Train {train}, {kind} at {time}: {about}; the first was at {earlier}.':
    'Tren {train}, {kind} el {time}: {about}; la primera vez fue el {earlier}.',
  'held twice': 'en pausa dos veces',
  'stopped twice': 'parado dos veces',
  'removed twice': 'retirado dos veces',
  'started while drawing': 'iniciado mientras aspiraba',
  'resumed while drawing': 'reanudado mientras aspiraba',

  // samplers
  'sampler {sampler}': 'el captador {sampler}',
  'the calibration tube': 'el tubo de calibración',
  'Port {port} of train {train} had sampler {sampler} when {other} was fitted, and its removal is not recorded.':
    'La toma {port} del tren {train} tenía el captador {sampler} cuando se colocó {other}, y no consta que se retirara.',
  'Port {port} of train {train} had sampler {sampler}; {other} was recorded as taken off it. Were two samplers swapped?':
    'La toma {port} del tren {train} tenía el captador {sampler}; se anotó que se le quitó {other}. ¿Se intercambiaron dos captadores?',
  'Sampler {sampler} was taken off port {port} of train {train}, where it was not.':
    'El captador {sampler} se quitó de la toma {port} del tren {train}, donde no estaba.',
  'Sampler {sampler} is packed in parcel {parcel}, and train {train} has no stop before.':
    'El captador {sampler} está en el paquete {parcel}, y el tren {train} no tiene antes ninguna parada.',
  'Sampler {sampler} was on port {port} already.': 'El captador {sampler} ya estaba en la toma {port}.',
  'Sampler {sampler} was fitted to port {port} of train {train} and to port {other} of train {second}. One sample is one sampler on one port: which is right?':
    'El captador {sampler} se colocó en la toma {port} del tren {train} y en la toma {other} del tren {second}. Una muestra es un captador en una toma: ¿cuál es la correcta?',
  'Nobody recorded that sampler {sampler} was taken off port {port} of train {train}.':
    'Nadie anotó que el captador {sampler} se quitara de la toma {port} del tren {train}.',
  '{sampler} is packed in parcel {parcel} and in parcel {other}.':
    '{sampler} está en el paquete {parcel} y en el paquete {other}.',
  '{sampler} was handled as a blank and fitted to port {port} of train {train}.':
    '{sampler} se trató como blanco y se colocó en la toma {port} del tren {train}.',
  'Blank {blank} was closed, and its opening is not recorded before it.':
    'El blanco {blank} se tapó, y no consta antes que se abriera.',
  'Parcel {parcel} was handed on before it was sealed.': 'El paquete {parcel} se entregó antes de precintarlo.',
  'The kit sheet of port {port} is that of pump {other}; train {train} has pump {pump}.':
    'La hoja del kit de la toma {port} es la de la bomba {other}; el tren {train} tiene la bomba {pump}.',
  'Train {train}, port {port}: the kit sheet says lot {sheet}; {what} is of lot {found}.':
    'Tren {train}, toma {port}: la hoja del kit dice lote {sheet}; {what} es del lote {found}.',
  'Train {train}, port {port}: the kit sheet says medium {sheet}; {what} is of medium {found}.':
    'Tren {train}, toma {port}: la hoja del kit dice soporte {sheet}; {what} es del soporte {found}.',

  // the pump
  'Train {train} was never recorded as prepared: pump, holder and warm-up are not known.':
    'No consta que el tren {train} se preparara: no se conocen bomba, divisor ni calentamiento.',
  'Train {train} was prepared anew while it drew: its stop is not recorded.':
    'El tren {train} se preparó de nuevo mientras aspiraba: su parada no consta.',
  'Train {train} was on {worker} and went to {next} while it drew.':
    'El tren {train} lo llevaba {worker} y pasó a {next} mientras aspiraba.',
  'Train {train} was held at {time}, and no start is recorded before it.':
    'El tren {train} se puso en pausa el {time}, y no consta antes ningún inicio.',
  'Train {train} was stopped at {time}, and no start is recorded before it.':
    'El tren {train} se paró el {time}, y no consta antes ningún inicio.',
  'Train {train} was held at {time} with no sampler on it and no start before it.':
    'El tren {train} se puso en pausa el {time} sin captador y sin inicio antes.',
  'Train {train} was stopped at {time} with no sampler on it and no start before it.':
    'El tren {train} se paró el {time} sin captador y sin inicio antes.',
  'Train {train} was resumed, and no hold is recorded before it: taken as a start.':
    'El tren {train} se reanudó, y no consta antes ninguna pausa: se toma como inicio.',
  'Train {train} was seen running at {time}, and no start is recorded before it.':
    'El tren {train} se vio en marcha el {time}, y no consta antes ningún inicio.',
  "Train {train}: the pump's counter gives a stop at {stop}, after it was found stopped at {found}; the latter is taken.":
    'Tren {train}: el contador de la bomba da una parada el {stop}, después de hallarla parada el {found}; se toma esta última.',
  'By its counter the pump had stopped before sampler {sampler} was drawn on.':
    'Según su contador, la bomba se había parado antes de aspirar por el captador {sampler}.',

  // flows and rounds
  'no closing round since the train was prepared': 'ninguna ronda de cierre desde que se preparó el tren',
  'the train was prepared anew before the port was read again':
    'el tren se preparó de nuevo antes de leer otra vez la toma',
  'the port was not read after it': 'la toma no se leyó después',
  'the flow was set': 'se ajustó el caudal',
  'the valve was touched': 'se tocó la válvula',
  'a valve was touched in the closing round': 'se tocó una válvula en la ronda de cierre',
  '{how} at {time}': '{how} el {time}',
  '{touched}, and no closing round since': '{touched}, y desde entonces ninguna ronda de cierre',
  '{touched}, before the port was read again': '{touched}, antes de leer otra vez la toma',
  'The closing round lists port {ports}, and no closing reading of it stands: read it again.':
    'La ronda de cierre nombra la toma {ports}, y no hay lectura de cierre válida de ella: léala otra vez.',
  'The round after the run has no reading of port {ports}.':
    'La ronda de después no tiene ninguna lectura de la toma {ports}.',
  'The round after the run has no reading of port any port.':
    'La ronda de después no tiene ninguna lectura de ninguna toma.',
  'Port {port} was read as after the run, and no stop is recorded before it.':
    'La toma {port} se leyó como después del muestreo, y no consta antes ninguna parada.',
  'Port {port} has closing readings after its declared closing round. They do not count.':
    'La toma {port} tiene lecturas de cierre después de declarar su ronda de cierre. No cuentan.',
  'the meter {code} is not on the register: taken as reading actual flow, and nobody knows how well':
    'el medidor {code} no está en el registro: se supone que lee el caudal real, y nadie sabe con qué exactitud',
  "a reading lies off the certificate's curve of {meter}; left as read":
    'una lectura cae fuera de la curva del certificado de {meter}; se deja como se leyó',
  '{meter} reads standard flow, at a condition nobody stated; left as read':
    '{meter} lee caudal en condiciones normalizadas que nadie indicó; se deja como se leyó',
  'float exponent of {meter} not known: 0 to 0.5 carried as uncertainty':
    'exponente del flotador de {meter} desconocido: de 0 a 0.5, llevado como incertidumbre',
  'a reading showed no flow; left as read': 'una lectura no mostró caudal; se deja como se leyó',
  "air not recorded with it: the site's usual temperature and pressure taken":
    'sin temperatura ni presión del aire anotadas: se toman las habituales del lugar',
  'air neither recorded nor stated for the site: 25 °C and 101.3 kPa taken':
    'aire ni anotado ni indicado para el lugar: se toman 25 °C y 101.3 kPa',
  'a tenth round the flow wanted': 'una décima parte alrededor del caudal pedido',
  'what {methods} allows': 'lo que admite {methods}',
  'the window of the plan': 'el intervalo del plan',

  // what a train still lacks
  'Nobody recorded how this train was put together.': 'Nadie anotó cómo se montó este tren.',
  'Warm-up is not recorded.': 'El calentamiento no está anotado.',
  'Warm-up of {minutes} min; at least {least} min is wanted.':
    'Calentamiento de {minutes} min; se piden al menos {least} min.',
  'The last full charge is not recorded.': 'La última carga completa no está anotada.',
  'Charged {hours} h before; no more than {most} h is wanted.': 'Cargada {hours} h antes; se piden no más de {most} h.',
  'No leak check is recorded.': 'No hay ningún ensayo de fugas anotado.',
  'A leak check failed, and none passed after it.': 'Un ensayo de fugas falló, y después no se superó ninguno.',
  'The ports draw {flow} together; splitter {splitter} takes {most}.':
    'Las tomas aspiran {flow} juntas; por el divisor {splitter} pasan {most}.',
  'The largest port flow is {times} times the smallest; no more than {most} times is wanted.':
    'El mayor caudal de toma es {times} veces el menor; se piden no más de {most} veces.',
  'Port {port}: {words}': 'Toma {port}: {words}',
  'no calibration tube is recorded.': 'no hay tubo de calibración anotado.',
  'no wanted flow is recorded.': 'no hay caudal pedido anotado.',
  'not read in a closing round that stands. Read every port once more, with no valve touched.':
    'sin leer en una ronda de cierre válida. Lea todas las tomas una vez más, sin tocar válvulas.',
  '{n} reading; at least {least} are wanted.': '{n} lectura; se piden al menos {least}.',
  '{n} readings; at least {least} are wanted.': '{n} lecturas; se piden al menos {least}.',
  'the readings differ by {spread} % of their mean; no more than {most} % is wanted.':
    'las lecturas difieren un {spread} % de su media; se pide no más del {most} %.',
  "{flow} is below the method's {least}.": '{flow} está por debajo de lo que pide el método, {least}.',
  "{flow} is above the method's {most}.": '{flow} está por encima de lo que admite el método, {most}.',
  '{flow} is more than a tenth away from the {target} wanted.':
    '{flow} se aparta más de una décima parte del caudal pedido, {target}.',
  'read with meter {meter}, which is not in the register.': 'leída con el medidor {meter}, que no está en el registro.',
  'meter {meter} has no certificate date.': 'el medidor {meter} no tiene fecha de certificado.',
  'the certificate of meter {meter} ran out on {day}.': 'el certificado del medidor {meter} venció el {day}.',

  // the pattern across the ports
  'Port {names}': 'Toma {names}',
  'Ports {names}': 'Tomas {names}',
  "Ports {first} and {second} read each other's flow: labels or tubes may have been swapped. Settle which sampler sat on which port before anything is computed.":
    'Las tomas {first} y {second} marcan el caudal la una de la otra: pueden haberse intercambiado etiquetas o tubos. Aclare qué captador estaba en qué toma antes de calcular nada.',
  "Port {port} draws nothing at its inlet while the pump's flow is unchanged: room air enters behind the tube. Tube slipped off or hose leaks; the time it began is not known.":
    'La toma {port} no aspira nada en su entrada y el caudal de la bomba no cambió: entra aire del local detrás del tubo. Tubo suelto o manguera con fuga; no se sabe cuándo empezó.',
  'Port {port} draws nothing: tube or valve blocked, hose kinked.':
    'La toma {port} no aspira nada: tubo o válvula obstruidos, manguera doblada.',
  "Port {port} draws nothing: tube or valve blocked, hose kinked. Read the flow on the pump's side: unchanged means a leak behind the tube.":
    'La toma {port} no aspira nada: tubo o válvula obstruidos, manguera doblada. Lea el caudal del lado de la bomba: si no cambió, hay una fuga detrás del tubo.',
  "No port draws and the pump's flow is unchanged: the line between splitter and pump is open.":
    'Ninguna toma aspira y el caudal de la bomba no cambió: la línea entre divisor y bomba está abierta.',
  'No port draws: pump stopped, or the line between pump and splitter shut. One pump, all samples.':
    'Ninguna toma aspira: bomba parada, o línea entre bomba y divisor cerrada. Una bomba, todas las muestras.',
  'Every port reads lower': 'Todas las tomas marcan menos',
  'Every port reads lower by nearly the same share': 'Todas las tomas marcan menos, casi en la misma proporción',
  'Every port reads higher': 'Todas las tomas marcan más',
  'Every port reads higher by nearly the same share': 'Todas las tomas marcan más, casi en la misma proporción',
  "{moved}: look at what they share, the controller's suction, the pump or its battery, and the meter with its temperature and pressure, before any single tube.":
    '{moved}: mire lo que comparten, la depresión del regulador, la bomba o su batería, y el medidor con su temperatura y presión, antes que cualquier tubo.',
  'Port {port} alone is down by {percent} %: its tube has gained resistance (wet, dusty, another type or lot) or its valve has moved.':
    'Solo la toma {port} bajó un {percent} %: su tubo opone más resistencia (mojado, con polvo, de otro tipo o lote) o su válvula se movió.',
  'Port {port} alone is up by {percent} %: its tube has lost resistance (other type, channelled, loose in the holder) or its valve has moved.':
    'Solo la toma {port} subió un {percent} %: su tubo opone menos resistencia (de otro tipo, con canales, suelto en el divisor) o su válvula se movió.',
  '{up} up while {down} down: the total is held, not the suction. Constant-flow mode, or a controller that sags.':
    '{up}: más caudal; {down}: menos caudal. Se mantiene el total, no la depresión. Modo de caudal constante, o un regulador que cede.',
  labels: 'etiquetas',
  tubes: 'tubos',
  'tube seat': 'asiento del tubo',
  hose: 'manguera',
  valve: 'válvula',
  'line to the pump': 'línea a la bomba',
  controller: 'regulador',
  'pump mode': 'modo de la bomba',

  // disk, office, other tabs
  'A newer version of this page is open in another tab. Reload this one.':
    'En otra pestaña está abierta una versión más nueva de esta página. Recargue esta.',
  'A pump is running. The page is changed when all have stopped.':
    'Hay una bomba en marcha. La página se cambia cuando todas estén paradas.',
  'Pair this device, choose the survey and say who records first.':
    'Primero vincule este dispositivo, elija la campaña y diga quién anota.',
  'Something went wrong on this device ({why}). Everything stays on it.':
    'Algo falló en este dispositivo ({why}). Todo sigue en él.',
  'The office answered {status}. Everything stays on this device.':
    'La oficina contestó {status}. Todo sigue en este dispositivo.',
  'The office answered, and named no entry. All stay on this device.':
    'La oficina contestó y no nombró ninguna anotación. Todas siguen en este dispositivo.',
  'The office cannot be reached. Everything stays on this device until it can.':
    'No se llega a la oficina. Todo sigue en este dispositivo hasta que se pueda.',
  'This device could not write to its disk ({why}). Nothing of the last act was kept: write it down.':
    'Este dispositivo no pudo escribir en su disco ({why}). Lo último no se guardó: apúntelo en papel.',
  'This device is full. Nothing of the last act was kept: write it down, and make room on the device.':
    'Este dispositivo está lleno. Lo último no se guardó: apúntelo en papel y haga sitio en el dispositivo.',
  'This device was paired anew in another tab. Reload.': 'Este dispositivo se vinculó de nuevo en otra pestaña. Recargue.',
  'This is no file of receipts from the office. Nothing was changed.':
    'Este no es un archivo de recibos de la oficina. No cambió nada.',
  "This code does not count: it was used, a newer one was made, or its time is over. Ask for a new one at the office. Entries on this device stay where they are.":
    'Este código no vale: ya se usó, se hizo otro más nuevo o se le pasó el tiempo. Pida otro en la oficina. Las anotaciones de este dispositivo quedan donde están.',
  'Too many wrong codes from here. Wait 15 minutes, and ask for a new code at the office.':
    'Demasiados códigos equivocados desde aquí. Espere 15 minutos y pida otro código en la oficina.',
  "The plan cannot be read as it is on record, so no tube, window or blank is named here. Open the survey's plan at the office: it says what is wrong.":
    'El plan no se puede leer como está registrado, así que aquí no se nombran tubos, intervalos ni blancos. Abra el plan de la campaña en la oficina: dice qué está mal.',
  Unauthorized: 'Sin autorización',
  'More than 2048 kB in one request; send fewer entries at once. Nothing was taken.':
    'Más de 2048 kB en un envío; mande menos anotaciones de una vez. No se aceptó nada.',
  'There is no such survey. Keep the entries.': 'Esa campaña no existe. Conserve las anotaciones.',

  // why the office does not take an entry
  "the device's count, from 1": 'la cuenta del dispositivo, desde 1',
  'a UUID of version 7 in lower case, made on the device': 'un UUID de versión 7 en minúsculas, hecho en el dispositivo',
  'a character no text can hold (U+0000 or half of a pair)':
    'un carácter que ningún texto admite (U+0000 o medio par)',
  'text without it': 'texto sin él',
  'an offset in hours and minutes': 'un desfase en horas y minutos',
  'the hash of what was sent: it changed on the way or before':
    'la huella de lo enviado: cambió por el camino o antes',
  "the entry's place in the device's chain": 'el lugar de la anotación en la cadena del dispositivo',
  'an account': 'una cuenta',
  'a drawing or “paper”: only the office asks for the password':
    'un dibujo o “paper”: la contraseña solo la pide la oficina',

  // what an entry lacks
  '{field}: found {found}; wanted {wanted}': '{field}: se halló {found}; se pide {wanted}',
  'at: found {found}; wanted an instant with its offset': 'momento: se halló {found}; se pide un instante con su desfase',
  'field: found {found}; wanted at or a field of {kind}: {names}':
    'campo: se halló {found}; se pide at o un campo de {kind}: {names}',
  'value: found {found}; wanted an instant with its offset, as in 2026-03-29T05:10+02:00':
    'valor: se halló {found}; se pide un instante con su desfase, como en 2026-03-29T05:10+02:00',
  nothing: 'nada',
  'nothing: only a correction corrects': 'nada: solo una corrección corrige',
  'one of {names}': 'uno de {names}',
  'a field of {kind}: {names}': 'un campo de {kind}: {names}',
  'an id of its own': 'un identificador propio',
  'its own id': 'su propio identificador',
  'the id of another entry': 'el identificador de otra anotación',
  'the id of the entry it corrects': 'el identificador de la anotación que corrige',
  'the id of the other entry': 'el identificador de la otra anotación',
  'the device or the paper sheet it was recorded on': 'el dispositivo o la hoja de papel en que se anotó',
  "the device's count from 1, or 0 for paper": 'la cuenta del dispositivo desde 1, o 0 para papel',
  'who recorded it': 'quién lo anotó',
  'why it is corrected': 'por qué se corrige',
  'the name of the field the value is for': 'el nombre del campo al que va el valor',
  'another field: withdraw the hand-over and sign a new one': 'otro campo: retire la entrega y firme una nueva',
  'one purpose a correction; it has {field} too': 'un solo fin por corrección; también tiene {field}',
  'the unit of {field}: {units}': 'la unidad de {field}: {units}',
  'a unit of {kind}: {units}': 'una unidad de {kind}: {units}',
  'a number in {unit}, or no unit': 'un número en {unit}, o ninguna unidad',
  'a number above {number}': 'un número mayor que {number}',
  'a number of {number} or more': 'un número de {number} o más',
  'a number of {number} or less': 'un número de {number} o menos',
  'a number with a decimal point, as in 0.25': 'un número con punto decimal, como en 0.25',
  'a number with a decimal point; a comma could mean decimals or thousands':
    'un número con punto decimal; una coma podría separar decimales o miles',
  'a finite number': 'un número finito',
  'a code of printable characters': 'un código de caracteres imprimibles',
  'codes parted by spaces, as in “S-1 S-2”': 'códigos separados por espacios, como en “S-1 S-2”',
  'one port letter, as in A': 'una letra de toma, como en A',
  'port letters parted by spaces, as in “A C”': 'letras de toma separadas por espacios, como en “A C”',
  'a date, as in 2027-08-31': 'una fecha, como en 2027-08-31',
  'a date and time with its offset, as in 2026-03-29T05:10+02:00':
    'una fecha y hora con su desfase, como en 2026-03-29T05:10+02:00',
  '64 digits 0-9 a-f': '64 cifras 0-9 a-f',
  '“yes” or “no”': '“yes” o “no”',
  '“yes”, or nothing': '“yes”, o nada',
  'a drawing of at most {n} characters': 'un dibujo de {n} caracteres como mucho',
  'points on a field of {wide} by {high}': 'puntos en un campo de {wide} por {high}',
  "a line long enough to be somebody's hand": 'un trazo lo bastante largo para ser de alguien',
  '“account NAME”, “paper”, or “drawn” and its points, as in “drawn 10,40 90,60;95,20 99,80”':
    '“account NAME”, “paper”, o “drawn” y sus puntos, como en “drawn 10,40 90,60;95,20 99,80”',
};
